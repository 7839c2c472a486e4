CREATE TABLE {s}.shared_state (only_row boolean PRIMARY KEY DEFAULT true CHECK (only_row), format text NOT NULL, version integer NOT NULL, id uuid NOT NULL, number bigint NOT NULL DEFAULT 0);
COMMENT ON TABLE {s}.shared_state IS 'Catalogue: kind, version of the tables, id, number of the last change';
CREATE TABLE {s}.shared_changes (number bigint PRIMARY KEY, id uuid NOT NULL UNIQUE, at timestamptz NOT NULL DEFAULT now(), role text NOT NULL, program text NOT NULL);
COMMENT ON TABLE {s}.shared_changes IS 'Catalogue: one row for each change';
CREATE TABLE {s}.shared_deleted (table_name text NOT NULL, fid bigint NOT NULL, changed bigint NOT NULL, PRIMARY KEY (table_name, fid));
CREATE INDEX shared_deleted_changed ON {s}.shared_deleted(changed);
COMMENT ON TABLE {s}.shared_deleted IS 'Catalogue: keys of rows that were deleted, with the number of the change';
CREATE TABLE {s}.shared_keys (table_name text PRIMARY KEY, last bigint NOT NULL);
COMMENT ON TABLE {s}.shared_keys IS 'Catalogue: highest key that each table ever had';
CREATE FUNCTION {s}.shared_lock() RETURNS void LANGUAGE sql SET search_path = pg_catalog AS $$ SELECT pg_advisory_xact_lock(hashtext('gradeline'), hashtext('{s}')) $$;
CREATE FUNCTION {s}.shared_number(change uuid, program text) RETURNS bigint LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE n bigint;
BEGIN
  n := nullif(current_setting('gradeline.number', true), '')::bigint;
  IF n IS NOT NULL THEN RETURN n; END IF;
  PERFORM {s}.shared_lock();
  UPDATE {s}.shared_state SET number = number + 1 RETURNING number INTO n;
  INSERT INTO {s}.shared_changes(number, id, role, program) VALUES (n, change, session_user, program);
  PERFORM set_config('gradeline.number', n::text, true), set_config('gradeline.program', program, true), pg_notify('{s}_catalogue', n::text);
  RETURN n;
END $$;
CREATE FUNCTION {s}.shared_begin() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
  PERFORM {s}.shared_number(gen_random_uuid(), '');
  RETURN NULL;
END $$;
CREATE FUNCTION {s}.shared_stamp() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE n bigint := current_setting('gradeline.number')::bigint;
BEGIN
  IF TG_OP = 'DELETE' OR TG_OP = 'UPDATE' AND OLD.fid IS DISTINCT FROM NEW.fid THEN
    INSERT INTO {s}.shared_deleted VALUES (TG_TABLE_NAME, OLD.fid, n) ON CONFLICT (table_name, fid) DO UPDATE SET changed = n;
    IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
  END IF;
  NEW.changed := n;
  RETURN NEW;
END $$;
CREATE FUNCTION {s}.shared_truncate() RETURNS trigger LANGUAGE plpgsql SET search_path = pg_catalog AS $$
BEGIN
  RAISE EXCEPTION 'delete rows of % by DELETE, so that every office hears of it', TG_TABLE_NAME;
END $$;
CREATE FUNCTION {s}.shared_next_key(name text) RETURNS bigint LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
DECLARE highest bigint;
BEGIN
  EXECUTE format('SELECT max(fid) FROM {s}.%I', name) INTO highest;
  INSERT INTO {s}.shared_keys AS k VALUES (name, coalesce(highest, 0) + 1) ON CONFLICT (table_name) DO UPDATE SET last = greatest(k.last, highest, 0) + 1 RETURNING last INTO highest;
  RETURN highest;
END $$;
CREATE FUNCTION {s}.shared_raise_keys(names text[], keys bigint[]) RETURNS void LANGUAGE sql SECURITY DEFINER SET search_path = pg_catalog AS $$
  INSERT INTO {s}.shared_keys AS k SELECT * FROM unnest(names, keys) ON CONFLICT (table_name) DO UPDATE SET last = greatest(k.last, EXCLUDED.last)
$$;
CREATE FUNCTION {s}.shared_by_hand() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
  IF current_setting('gradeline.program', true) <> '' THEN
    IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
    RETURN NEW;
  END IF;
  IF TG_TABLE_NAME = 'reviews' THEN
    INSERT INTO {s}.history(at, done_by, what, descent, words) VALUES (date_trunc('milliseconds', now()), CASE TG_OP WHEN 'DELETE' THEN '' ELSE NEW.reviewed_by END, 'by hand', CASE TG_OP WHEN 'DELETE' THEN OLD.descent ELSE NEW.descent END,
      CASE TG_OP WHEN 'INSERT' THEN 'review put in: ' || NEW.state || '; ' || NEW.note
        WHEN 'UPDATE' THEN 'review changed from ' || OLD.state || ' by ' || OLD.reviewed_by || ' (' || OLD.note || ') to ' || NEW.state || ' (' || NEW.note || ')'
        ELSE 'review taken out: ' || OLD.state || ' by ' || OLD.reviewed_by || '; ' || OLD.note END);
  ELSE
    INSERT INTO {s}.history(at, what, route, words) VALUES (date_trunc('milliseconds', now()), 'by hand', CASE TG_OP WHEN 'DELETE' THEN OLD.route ELSE NEW.route END,
      CASE TG_OP WHEN 'INSERT' THEN 'site put in: ' || NEW.id WHEN 'UPDATE' THEN 'site changed: ' || NEW.id ELSE 'site taken out: ' || OLD.id END);
  END IF;
  IF TG_OP = 'DELETE' THEN RETURN OLD; END IF;
  NEW.seal := NULL;
  RETURN NEW;
END $$;
REVOKE EXECUTE ON ALL FUNCTIONS IN SCHEMA {s} FROM PUBLIC;
