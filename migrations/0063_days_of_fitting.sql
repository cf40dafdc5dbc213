-- On which day of its kitchen a part was fitted: what is used is counted by it over ten years as over one, without looking
-- at each order and kitchen. It follows from other columns, whoever writes them; `check` holds it against them.
ALTER TABLE part_line ADD COLUMN fitted_on date;

CREATE FUNCTION keep_day_of_fitting() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    NEW.fitted_on := NULL;
    IF NEW.fitted_at IS NOT NULL THEN
        SELECT (NEW.fitted_at AT TIME ZONE site.time_zone)::date INTO NEW.fitted_on
        FROM work_order JOIN site ON site.id = work_order.site_id WHERE work_order.id = NEW.work_order_id;
    END IF;
    RETURN NEW;
END
$$;
CREATE TRIGGER keep_day_of_fitting BEFORE INSERT OR UPDATE OF fitted_at, work_order_id ON part_line
    FOR EACH ROW EXECUTE FUNCTION keep_day_of_fitting();

CREATE FUNCTION move_days_of_fitting() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    UPDATE part_line SET fitted_on = (fitted_at AT TIME ZONE NEW.time_zone)::date
    FROM work_order WHERE work_order.id = part_line.work_order_id AND work_order.site_id = NEW.id AND fitted_at IS NOT NULL;
    RETURN NULL;
END
$$;
CREATE TRIGGER move_days_of_fitting AFTER UPDATE OF time_zone ON site
    FOR EACH ROW WHEN (OLD.time_zone <> NEW.time_zone) EXECUTE FUNCTION move_days_of_fitting();

UPDATE part_line SET fitted_on = (fitted_at AT TIME ZONE site.time_zone)::date
FROM work_order JOIN site ON site.id = work_order.site_id
WHERE work_order.id = part_line.work_order_id AND fitted_at IS NOT NULL;
CREATE INDEX part_line_used ON part_line (fitted_on, part_id) INCLUDE (currency, quantity, unit_price, payer, fitted_at)
    WHERE state = 'fitted';
-- Few stay unfitted: they are counted without going through all that were.
CREATE INDEX part_line_not_fitted ON part_line (state) WHERE state <> 'fitted';

SELECT keep_in_range();
