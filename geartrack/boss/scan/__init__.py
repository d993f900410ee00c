"""A boss from a scan: files, health, datums, frame, surface."""
