"""Longer help of the command line, by example."""

PLAN = """examples:
  floor plan                              all open batches: finish, bottleneck, runs, who is needed when
  floor plan B0007                        one batch, planned among the others
  floor plan part.toml --order 96         before a batch exists: pieces to start, loads, blanks, shelf, finish
  floor plan part.toml --order 96 --confidence 90% --test 30=2
                                          two good pieces are used up as tests at op 30
  floor plan part.toml --order 8 --start 12
                                          with twelve pieces started, whatever loads would hold
  floor plan --csv > runs.csv             one row for each run, for a spreadsheet
  floor plan --json | jq .bottleneck      the whole plan for a program; README names every field
  floor plan --shop /srv/floor            the shop of another folder

CSV columns:
  batch, op, operation                    the batch, the operation's number, its number and title
  station, carrier, load_name, pieces     where, on what, which load, how many
  start, end, station_free                begin; end with the cure; when the station is free again
  attended_minutes, may_wait_minutes      work by hand; how long the begin may slip before the finish does

Shifts, breaks, days off, time zone and hands stand in shop.toml in the shop's folder.
Exit status: 0 planned, 1 something is wrong or cannot be planned, 3 the shop cannot be opened."""
