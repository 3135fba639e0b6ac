"""What sensors measured, put in order: what the metal and the air felt, and what the next hours
bring.

Pure functions of readings: no store, no settings, no clock. Nothing here knows a product.
"""
