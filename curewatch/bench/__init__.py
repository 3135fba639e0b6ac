"""The bench as of now: steps, air and model together; what is due, what sounds, what to wear; and
what a person does there.

Each act writes one event. Nothing computed is stored.
"""
