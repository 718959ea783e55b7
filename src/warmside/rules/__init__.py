"""Rules: each clause against the wall as planned, and what must be settled before the work starts."""
