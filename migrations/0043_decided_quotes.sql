-- Whether a quote was decided is asked for each open order of Today's page.
CREATE INDEX approval_quote ON approval (quote_id);
