"""What the customer and the suppliers get."""
