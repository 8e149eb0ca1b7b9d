"""The command line: one module for each command, and the options that they share.

A command reads its options, asks a question and prints what `report` makes of the answer.
"""
