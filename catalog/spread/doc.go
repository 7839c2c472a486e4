// Package spread surveys with several processes and machines that share a PostgreSQL database.
//
// Spread queues a survey: its settings, its routes in batches of some 200 km that lie near each
// other, and a job of River for each batch. Work, on any machine, recovers the grade lines of the
// batches, which takes most of a survey's time, and stores each as a record in the transaction that
// completes the job. When the last is in, one finishing job runs the ordinary survey, which takes
// the grade lines from the records; so the catalogue is that of a single machine, whatever the order
// of the jobs. Progress says where a run is.
//
// A machine whose program, libraries, processor or rasters differ from those with which a run was
// queued leaves it to others. Any process may be killed at any time, and the database may stop and
// start again: jobs of lost workers are repeated, and a record has effect once. All times are the
// database's. A route that fails three times is set aside with its message and is a gap of the
// answer.
package spread
