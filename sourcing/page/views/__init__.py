"""The views of the counter page, one module for each group of pages."""
