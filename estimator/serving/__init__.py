"""The page behind its doors: safe headers on this machine, and on the salon's network https, pairing and PINs."""
