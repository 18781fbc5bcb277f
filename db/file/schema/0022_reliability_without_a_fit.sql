-- How well a measure repeats is worked out from its routine sessions when it is asked for: it
-- needs no fit, so it is kept with none.

DROP VIEW latest_reliability_session;
DROP VIEW latest_reliability_need;
DROP VIEW latest_reliability_trial;
DROP VIEW latest_reliability_estimate;
DROP VIEW latest_reliability;
DROP TABLE reliability_need;
DROP TABLE reliability_trial;
DROP TABLE reliability_estimate;
DROP TABLE reliability_session;
DROP TABLE reliability;
