"""The salon's memory: clients, visits, photographs, consents. One folder a salon; nothing leaves it unasked.

The door is `records.store.open_store`. Importing this package alone loads no database library: what is only handed in
(`records.visit_record`) stays cheap.
"""
