"""What results teach: strand trials, outcomes learned from, and what to do where a result missed its target."""
