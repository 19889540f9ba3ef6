"""Price sheets of every trait, made by the tests themselves."""
