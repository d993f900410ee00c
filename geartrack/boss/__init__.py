"""The pilot-bearing boss, from whatever the shop has: parts, stations."""
