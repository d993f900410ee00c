"""Tooth counts, pitch cones, tooth depth, blanks and defaults of one ring and pinion set."""
