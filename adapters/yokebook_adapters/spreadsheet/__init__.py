"""Workbooks of spreadsheet programs (XLSX), read and written. Needs the extra `spreadsheet`."""
