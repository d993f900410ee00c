"""The one home of what a scan file may be, so that no file, however made, fills the memory or takes the day."""

from __future__ import annotations

MOST_TRIANGLES = 6_000_000
"""Triangles of a scan; vertices may be three times as many."""

MOST_FILE_BYTES = 2**31
"""Size of a file [bytes]."""

MOST_UNPACKED_BYTES = 2**30
"""Of all that is packed in a 3MF [bytes]: five million triangles unpack to half of it."""

MOST_AT_ONCE_BYTES = 2**29
"""Of a file that is read at once, PLY and OBJ [bytes]."""

MOST_ROWS = 8_000_000
"""Lines of a text PLY or OBJ: a closed mesh of five million triangles has 7.5 million."""

MOST_FIELDS = 200
"""Properties in a PLY's header."""

MOST_ELEMENTS = 30_000_000
"""Of XML in each part of a 3MF."""

MOST_PACKED_RATIO = 150.0
"""How many times smaller packing may have made a part of a 3MF: meshes pack to a tenth or a fifteenth."""

MOST_ENTRIES = 2_000
"""Entries of a 3MF's directory, and objects, components and items of its models."""

MOST_DEPTH = 24
"""How deep elements of a 3MF's models may be nested, and components in components."""

MOST_HEADER_BYTES = 2**16
"""Of a PLY's header [bytes]."""

MOST_LINE_BYTES = 2**20
"""Of a line in a text file [bytes]."""

BLOCK_BYTES = 2**22
"""Read at a time [bytes]."""

PLAUSIBLE_MM = (40.0, 900.0)
"""Longest side of a scan of a boss's surroundings or of a whole case [mm]: tells the unit where nothing else does."""

POSSIBLE_MM = (20.0, 2500.0)
"""Longest side of any scan of use here [mm]: beyond it the unit said is wrong."""

FURTHEST_MM = 1e6
"""From zero to any vertex [mm]: beyond it the digits of most files no longer hold a hundredth."""
