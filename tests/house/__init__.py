"""Rules of the house: who may know whom, what is banned, what the words and the guide must hold."""
