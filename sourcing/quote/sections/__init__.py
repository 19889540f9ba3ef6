"""The sections of the report, one module each, as the sheets are of the workbook."""
