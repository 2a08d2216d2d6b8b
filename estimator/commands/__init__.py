"""One module per area of commands: arguments in, verbs of a visit called, values printed. Heavy imports stay inside."""
