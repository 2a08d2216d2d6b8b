"""What a client gives from afar: invitations by a one-time code, the page that takes things in, the inbox."""
