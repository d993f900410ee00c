"""What a builder takes away: true-scale template, solids, sweep gauge, depth table, worksheet."""
