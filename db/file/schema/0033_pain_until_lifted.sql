-- Pain blocks until staff lift it. Another session's "no" lifted it at once, even on the same day;
-- now it does so after a week only, so that pain of long ago in an imported season blocks nobody.

CREATE OR REPLACE VIEW athlete_standing AS
WITH said AS (
    SELECT * FROM athlete_status
    QUALIFY row_number() OVER (PARTITION BY athlete ORDER BY since DESC, status_id DESC) = 1
), hurt AS (
    SELECT s.athlete, s.started_at::DATE AS day,
           coalesce((SELECT min(e.revision) FROM effort e WHERE e.session_id = s.session_id), 0)
               AS revision
    FROM session s WHERE s.pain AND NOT EXISTS (
        SELECT 1 FROM session n WHERE n.athlete = s.athlete AND NOT n.pain
        AND n.started_at::DATE >= s.started_at::DATE + 7)
), answered AS (
    SELECT * FROM hurt
    QUALIFY row_number() OVER (PARTITION BY athlete ORDER BY day DESC, revision DESC) = 1
)
SELECT a.athlete, a.name, coalesce(s.status, 'fit') AS status, s.since,
       coalesce(s.reason, '') AS reason,
       CASE WHEN p.day IS NOT NULL AND (s.since IS NULL OR s.since < p.day
                             OR (s.since = p.day AND s.revision < p.revision))
            THEN p.day END AS pain_day
FROM athlete a LEFT JOIN said s ON s.athlete = a.athlete
LEFT JOIN answered p ON p.athlete = a.athlete;
COMMENT ON VIEW athlete_standing IS 'How every athlete is: what staff said last, and the day of pain that nobody has lifted since, nor a no a week or more later.';
