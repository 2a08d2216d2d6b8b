"""Who may use the salon's page from another device: people and roles, paired phones, PINs, sessions, an audit trail.

On this machine alone the page needs none of it: it answers at 127.0.0.1, and who sits at the laptop is its owner.
"""
