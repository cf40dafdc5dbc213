-- A caller may also tell of a machine that trips its protection, that tingles, or whose interlock was made useless.
ALTER TABLE call
    DROP CONSTRAINT call_dangers_check,
    ADD CONSTRAINT call_dangers_check
        CHECK (dangers <@ ARRAY['gas', 'electric', 'caustic', 'tripping', 'tingle', 'defeated_interlock']);
