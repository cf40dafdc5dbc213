-- How high a kitchen lies, m above the sea: water boils at less than 92 °C from some 2,400 m on. The range is
-- that of inhabited places, with something to spare.
ALTER TABLE site ADD COLUMN altitude_m double precision CHECK (altitude_m BETWEEN -500 AND 6000);
