"""What is shown and handed out: wording of numbers, the printed sheets, the exports."""
