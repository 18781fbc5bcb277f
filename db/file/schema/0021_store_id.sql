-- What tells this store from every other one, copies aside: a program that serves it notices when
-- another file takes its place.

INSERT INTO setting (key, value) VALUES ('store_id', uuid()::VARCHAR);
