"""Alembic's scripts, one for each change of the tables; they ship with the program and only ever go forward."""
