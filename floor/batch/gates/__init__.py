"""What must be proved before the work goes on: gates, signatures, lots, set-up sheets, values out of limits."""
