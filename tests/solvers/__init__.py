"""The solvers, against each other and against what is known from outside."""
