"""Pieces counted, held, scrapped, sent to rework, left over; what nobody is shown before it is counted."""
