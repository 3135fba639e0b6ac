"""An order for the steps of several parts with one pair of hands: the job as tables on a grid of
time, the search for a plan, and a checker that shares nothing with it. Pure: it knows neither what
the steps are nor when the grid begins.
"""
