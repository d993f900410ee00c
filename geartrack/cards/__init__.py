"""Short cards for the bench and the phone: a few typed entries in, a frozen answer out; no printing, no asking."""
