"""What to buy: quantities, packages, prices."""
