"""The boss from drawings of it: an end view about the bore, a side view along it, as DXF or SVG."""
