"""Paper: release sheet, kneeboard card, blank worksheet, and tables that a spreadsheet can open without harm.

Pure: texts in, bytes out, the same bytes for the same input. Nothing here reads a clock, a store or a setting. The PDF
library takes half a second to load and is imported only when a sheet is made.
"""
