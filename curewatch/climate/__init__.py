"""What sensors measured, put in order: the temperature and humidity at metal and air, and the
forecast for the coming hours.

Pure functions of readings: no store, no settings, no clock, no product.
"""
