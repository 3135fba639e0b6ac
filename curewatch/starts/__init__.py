"""What becomes of a mix, by when it is started: for each start ahead the chance that a milestone is
there in time, from drawn courses of the weather and drawn products of the belief. Pure: it knows no
store, no clock and no screen; nothing here asks what anybody should do.
"""
