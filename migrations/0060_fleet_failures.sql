-- Where a machine came from another kitchen, its time here begins with the move: the few changes that moved one are found
-- without reading all others.
CREATE INDEX audit_moved ON audit (subject, at) WHERE 'site_id' = ANY (changed_fields);
