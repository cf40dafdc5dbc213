-- What somebody sees no more is told to him as gone, and to him alone.

ALTER TABLE event ADD COLUMN person_id uuid; -- told to this person alone

-- What who is sent to an order sees for its sake: the order, its call, its kitchen, the machines there, the customer and the
-- contacts of both. What belongs to one of these is seen with it.
CREATE VIEW sight AS
SELECT assignment.person_id, assignment.work_order_id, seen.noun, seen.subject
FROM assignment CROSS JOIN LATERAL (
    SELECT 'work_order' AS noun, assignment.work_order_id AS subject
    UNION ALL SELECT 'call', call_id FROM work_order WHERE id = assignment.work_order_id AND call_id IS NOT NULL
    UNION ALL SELECT 'site', assignment.site_id
    UNION ALL SELECT 'appliance', id FROM appliance WHERE id = assignment.appliance_id OR site_id = assignment.site_id
    UNION ALL SELECT 'customer', assignment.customer_id
    UNION ALL SELECT 'contact', id FROM contact
        WHERE site_id = assignment.site_id OR customer_id = assignment.customer_id
) AS seen;
