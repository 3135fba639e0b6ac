"""What is read out of a request: the fields and the token of its form, its whole numbers, what the
device chose and how large its screen is. Nothing here knows the garage."""
