"""The command line: arguments in, sentences and exit codes out."""
