-- What is read costs what it holds, not what the company has.

-- A machine's history and what is in it.
CREATE INDEX fitted_part_appliance ON fitted_part (appliance_id);
-- Open orders are few and asked for all day; the newest first.
CREATE INDEX work_order_open_newest ON work_order (created_at, id) WHERE state NOT IN ('closed', 'cancelled');
-- A serial is read out letter by letter, in no particular case.
CREATE INDEX appliance_serial_beginning ON appliance (lower(serial) text_pattern_ops) WHERE serial IS NOT NULL;

-- Names, places and phones by any three letters of them, where the extension pg_trgm can be had: who owns the database may
-- make it. Where it is absent the same statements read the tables through. `ovenwright migrate` calls it each time, so that
-- an extension that came later is used from then on.
CREATE FUNCTION search_by_trigrams() RETURNS boolean LANGUAGE plpgsql SET client_min_messages = warning AS $$
BEGIN
    IF NOT EXISTS (SELECT FROM pg_extension WHERE extname = 'pg_trgm') THEN
        BEGIN
            CREATE EXTENSION pg_trgm;
        EXCEPTION WHEN insufficient_privilege OR undefined_file OR feature_not_supported THEN
            RETURN false;
        END;
    END IF;
    CREATE INDEX IF NOT EXISTS customer_name_letters ON customer USING gin (lower(name) gin_trgm_ops);
    CREATE INDEX IF NOT EXISTS site_name_letters ON site USING gin (lower(name) gin_trgm_ops);
    CREATE INDEX IF NOT EXISTS site_place_letters ON site USING gin (lower(place) gin_trgm_ops);
    CREATE INDEX IF NOT EXISTS contact_name_letters ON contact USING gin (lower(name) gin_trgm_ops);
    CREATE INDEX IF NOT EXISTS contact_phone_letters ON contact USING gin (phone_digits gin_trgm_ops);
    CREATE INDEX IF NOT EXISTS appliance_serial_letters ON appliance USING gin (lower(serial) gin_trgm_ops);
    CREATE INDEX IF NOT EXISTS appliance_label_letters ON appliance USING gin (lower(position_label) gin_trgm_ops);
    RETURN true;
END
$$;
SELECT search_by_trigrams();
