"""Longer help of the command line, by example."""

PLAN = """examples:
  floor plan                          all open batches: finish, bottleneck, runs
  floor plan B0007                    one batch, planned among the others
  floor plan part.toml --order 96     before a batch exists: pieces to start,
                                      loads, blanks, material, finish
  floor plan part.toml --order 96 --confidence 90% --test 30=2
                                      two good pieces are used up at op 30
  floor plan part.toml --order 8 --start 12
                                      with twelve started, whatever loads hold
  floor plan --csv > runs.csv         one row for each run, for a spreadsheet
  floor plan --json | jq .bottleneck  the whole plan, machine-readable
  floor plan --shop /srv/floor        the shop of another folder
  floor plan --what-if "saturday, 2 more pallets"
                                      each change and all together, beside today

Changes that --what-if can be asked about, several with commas:
  saturday   every saturday   sat 5 dec 7-12   second shift   B0002 first
  end 1 h later   start 30 min earlier   2 more pallets   1 pallet fewer
  1 more person   1 person less   second router   1 more place at oven
  router down until wed 10:00   cure 6 h shorter   cure after 20 6 h longer
  load 3 scrapped   12 more pieces

CSV columns:
  batch, op, operation                batch; number of the operation, with title
  station, carrier, load_name, pieces where, on what, which load, how many
  start, end, station_free            start; end with the cure; station free
  attended_minutes, may_wait_minutes  attended work; how late it may start
                                      before the finish slips

Shifts, breaks, days off, time zone and operators are set in shop.toml in the
shop's folder.
Exit status: 0 planned, 1 something is wrong or cannot be planned, 3 the shop
cannot be opened."""

LESSONS = """examples:
  floor lessons B0007                 times, yields and tool lives that differ
                                      from the checklist, as old and new lines
  floor lessons B0007 --take 1 3 --by RK
                                      write the first and third into its file
  floor lessons B0007 --take all --by RK --yes
                                      all of them, without asking again

A time or a tool life takes 6 values: fewer have no 95 % interval of their
median. A yield takes 3 loads. What differs by no more than luck is not offered;
the list says why not. A shipped checklist is copied into checklists/ of the
shop first. Comments and layout of the file stay, and it is checked whole before
it is replaced. Who took which line is on record. Open batches do not change.

Exit status: 0 fine, 1 nothing to take, or not taken, 2 bad command line,
3 the shop cannot be opened or written to."""

FIND = """examples:
  floor find B0007 --by RK --since yesterday
                                          what RK entered since yesterday
  floor find B0007 --kind counted,set_aside --op 30
                                          counts and pieces set aside at op 30
  floor find --text coolant               where anybody wrote coolant
  floor find B0007 --load 3 --station mill --not-struck
                                          load 3 at the mill, nothing struck out
  floor find B0003 --kind gates --csv > gates.csv
                                          a closed batch, as a table
  floor find --kind waived --json | jq .found
                                          how many were waived, machine-readable

TIME is 14:30 (the latest one gone by), a day like 2026-11-25, both together,
today or yesterday. A day counts whole.
KIND is one of these; the name before the colon takes the whole group:
  batch:                  batch_opened, checklist_weakened,
                          pieces_started, load_formed, pieces_moved,
                          entered_late, batch_closed, gone_over, taken_in
  steps:                  run_begun, run_put_back, cautions_read, step_done,
                          step_skipped, steps_checked, cycle_started,
                          cycle_stopped, cycle_ended, released, paused
  gates:                  proved, program_read, lot_opened, lot_corrected,
                          measured_again, attempt_refused,
                          condition_reported,
                          condition_cleared, gauge_suspected,
                          suspect_gauge_settled,
                          out_settled, waived, waiver_closed,
                          clock_confirmed, air_read, disturbed,
                          setup_taken_down, tool_worn, out_of_service,
                          back_in_service
  counts:                 counted, set_aside, count_corrected, disposed,
                          taken_off, followed_up,
                          surplus_taken_out, surplus_brought_back,
                          surplus_goes_on, out_decided, before_decided
  handover:               handover_offered, handover_withdrawn, page_read,
                          carrier_counted, read_back, question_asked,
                          question_answered, handover_accepted,
                          difference_resolved
  trials:                 trial_planned, trial_pieces_taken,
                          trial_pieces_back, trial_result,
                          trial_setting_chosen
  notes and corrections:  noted, note_done, struck_out, unproved_settled

Exit status: 0 found, 1 nothing found or something named is not there,
2 a kind or time cannot be understood, 3 the shop cannot be opened."""

FIGURES = """examples:
  floor figures B0007                 what is sure of the losses, key figures
                                      with formulas and inputs, times
  floor figures B0007 --since yesterday --station mill
                                      the mill, runs started since yesterday
  floor figures B0007 --json | jq .patterns
                                      everything, machine-readable
  floor figures B0007 --csv > figures.csv
                                      the key figures as a table
  floor figures B0007 --svg charts/   every chart to print: an SVG file each
  floor figures B0007 --earlier       earlier batches of the part beside this
                                      one, and how sure the start quantity is

Key figures are named and computed as in ISO 22400-2, by the hours of shop.toml.
What was not recorded has a reason and no number. TIME is as in floor find;
since then are losses, measured values, key figures and times, while what is
tested for patterns, trials and cost are of the whole batch. A run counts, with
all that it lost, from when its walk started, whenever it was counted. Where
shop.toml has several shifts, there are key figures for each; a run counts where
it was started, its times in the shifts that they lie in.

CSV columns:
  scope, name, value, unit            batch, station id or shift; the figure;
                                      last, what changes as its tool wears
  estimate                            True if pieces were not told apart
  formula, why_not                    its formula; why there is no value

With --earlier a row for each yield and time of each batch (JSON: rows):
  part, batch, age_days               days since its last entry
  op, operation, what                 what: yield, cycle or by hand
  good, pieces, share                 good at the first count of each piece
  share_low, share_high               its 95 % interval
  runs, median, lower, upper          of a run in seconds, with quartiles
  per_piece, times_planned            seconds; x what the checklist states
  times_left_out                      times not counted: under a quarter of that
                                      or over four times as much
  weight                              pieces, or runs, it is worth next time
  not_used                            why the next plan takes nothing of it
JSON besides:
  order, started, confidence          what the start quantity is asked for
  half_life_days                      days after which a batch counts half
  start_quantity                      by checklist, as opened, next: chance
                                      (probability), pieces that give the
                                      confidence, least and most pieces that a
                                      yield stands on, why_not
  batches                             batch, revision, opened, age_days, closed,
                                      entered_half_done, order, started,
                                      finished
  next                                op, stated, stated_weight: the checklist;
                                      good, weight, reworked: the next plan;
                                      batch_correlation: how batches differ
  next_paces                          op, part, ratio, runs: times stated
  left_out, not_in_checklist          batch: why; batch: operations
  not_read                            older batches of the part

Exit status: 0 fine, 1 the batch or station is not there or shop.toml has
errors, 2 a time cannot be understood, 3 the shop cannot be opened."""

PROGRAM = """examples:
  floor program O1234.nc              tools, speeds, offsets, depth, travel
  floor program O1234.nc --json | jq .tools
                                      the same, machine-readable
  floor program O1234.nc --set bare-number=whole --set dwell=seconds
                                      as this control reads it
  floor program O0710.nc --checklist my-part.toml
                                      compared with the operation that names
                                      the file: offset, tools, speeds, feeds,
                                      coolant, depth, travel
  floor program O0710.nc --checklist my-part.toml --offset G54,G55
                                      the same, for the carriers in the cycle

A value is known, assumed or not known, with the reason and the line. Where
controls read a word in two ways, both are listed until it is set here:
  bare-number=whole|increment         X100: 100 mm, or 0.1 mm
  dwell=seconds|milliseconds          G4 P500
  tool-change="this block"|staged     M6 T7 with another tool staged
  cycle-fires="X Y Z"|"X Y"|"any axis"
                                      words that drill a hole in a cycle
  repeats=L|K                         word that repeats a cycle
  arc-centers="from start"|absolute   I, J, K without G90.1 or G91.1
  g10-l20="set current"|"extra offset"
  block-delete=on|off                 the switch that skips blocks with a slash
  M71=air|flood|mist|"through tool"|off|none
                                      off: coolant off; none: no coolant

For the cycle time, the machine's rates:
  rapid="400 in/min"                  of every axis, or three: "9000, 9000,
                                      6000 mm/min" of X, Y and Z
  tool-change-time="8 s"

Floor reads the file and runs nothing. Prove the program out at the machine.
Exit status: 0 nothing to check, 1 something to check, 2 a setting cannot
be understood, 3 a file cannot be read."""

TAG = """examples:
  floor tag carrier --print           all pallets, trays, vises, racks, totes
                                      of open batches, on the label printer
  floor tag carrier "Pallet 1"        one, as text with a QR code
  floor tag load B0007 3              load 3 of batch B0007; all without the 3
  floor tag box B0007 --pieces 24 --box 2
                                      a box of finished pieces; what is left out
                                      is written with a pen
  floor tag tool mill 7 --keep        tool 7 at the mill, as SVG and PNG
  floor tag person                    a badge for everybody
  floor tag lot "Epoxy paste" L-22    a lot on record in an open batch
  floor tag gauge DM-04 --code 128 --as png > dm-04.png
                                      with bars for a laser scanner

Scan one anywhere in Floor: it opens the load, the tool, the lot or the gauge,
or signs in. The code holds a percent sign, a letter for the kind, the names,
four characters of the shop (of the batch, for a load or box), and two against
misreads. Set the scanner to the keyboard layout in use and to end with Enter.
In text a QR code is dark on light paper; on a dark terminal, open it in Floor.

Exit status: 0 fine, 1 something named is not there, 2 bad command line,
3 the shop cannot be opened, or nothing was printed."""
