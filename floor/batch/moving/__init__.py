"""Which pieces ride where: chosen pieces and places, loads split and joined, pieces moved by hand between counts.

Pieces are moved between two runs only, as a run's gates, cycle and count are about the pieces it began with. Whatever
they join becomes a load of its own, so no load ever gets other places: what is on record of earlier ones (trace, scrap
by place) needs no second look, and its proofs are its own, so a zero lapses by itself. `made_of` names the loads of the
same stay on the carrier that it comes from.
"""

__all__ = ["commands", "choose"]
