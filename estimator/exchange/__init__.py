"""Open formats in and out: colours, tables, contacts, dates, side-cars, the whole salon. docs/formats.md lists them."""
