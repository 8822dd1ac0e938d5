"""Read, decide, write: one file for each thing the program does. An action does not call another."""
