"""Pages to print: one model of a sheet, drawn as PDF and as HTML."""
