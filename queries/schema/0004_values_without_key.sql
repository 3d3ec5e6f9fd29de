-- Grain: one row a value measured at a version of a review, as before; the key went, as it took five sixths of the file and
-- the seal of each version tells of a value that was altered, added, repeated or taken away.
create table values_without_key (
    record integer not null,
    change integer not null,
    field varchar not null,
    value double not null
);
insert into values_without_key from observations;
drop table observations;
alter table values_without_key rename to observations;
