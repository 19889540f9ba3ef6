"""The quote: what the customer pays, the cautions, the workbook."""
