"""Pieces and voids of every bay."""
