// GDAL asks SQLite for the table and column behind a result's column by two functions
// that the copy of SQLite within this program is built without. The system's own would
// answer, given a statement of another copy, and end the program with a memory fault.
// None is known, so none is named: GDAL then goes by the result itself.

struct sqlite3_stmt;

__attribute__((weak)) const char *sqlite3_column_table_name(struct sqlite3_stmt *s, int column) { return 0; }
__attribute__((weak)) const char *sqlite3_column_origin_name(struct sqlite3_stmt *s, int column) { return 0; }
