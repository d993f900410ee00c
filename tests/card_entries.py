"""What is typed into the cards in tests, every entry answered: invented, and of the sketch case's size."""

OLD_GEARS = {
    "old_teeth": "9/35",
    "new_teeth": "7/36",
    "axle": "240 mm; 54 mm",
    "gap": "6.2 mm feeler",
    "backlash": "0.010 in",
    "old_height": "38.5 mm",
    "new_height": "45.1 mm",
    "toe_diameters": "172.0 169.0 mm",
    "wall": "8 mm",
    "carrier": "same",
    "set": "standard",
}
BARE_CASE = {
    "teeth": "7/36",
    "ring_diameter": "240 mm",
    "case": "nodular, never ground",
    "square": "yes",
    "saddle_depth": "47 mm",
    "saddle_bore": "78 mm",
    "boss_depth": "36 mm",
    "boss_length": "22 mm",
    "over_bars": "88 mm",
    "saddle_bar": "30 mm",
    "pilot_bar": "38 mm",
    "hand": "A",
    "pilot_bore": "38 mm",
    "bore_depth": "20 mm",
    "walls": "8.2 8.2 8.2 8.2 8.2 mm",
    "stands_out": "none",
}
