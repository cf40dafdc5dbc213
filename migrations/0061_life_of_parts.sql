-- The lives of the parts of one position, wherever they stand, without reading all others.
CREATE INDEX fitted_part_position ON fitted_part (position, part_id);
-- What stood in a place before a part; it serves all that is asked of one machine as well.
CREATE INDEX fitted_part_place ON fitted_part (appliance_id, position, fitted_at);
