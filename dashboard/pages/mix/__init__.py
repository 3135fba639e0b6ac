"""Before a mix: the answer, the checks, the start; and the rehearsal."""
