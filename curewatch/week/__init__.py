"""Several parts and the week: the steps that are left of every wished part laid on a grid of ten
minutes, an order for one pair of hands, and the chances of it in drawn weeks. What is found is a
proposal, which reminds of its steps where it was taken over; each test still decides.
"""
