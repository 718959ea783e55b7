"""The framed wall: studs, plates, bays, and what is in the way."""
