/* SPDX-License-Identifier: MIT */
/* A host in C11: loads each plugin named, checks it and runs it on four rows that stand below. */
#define _XOPEN_SOURCE 700 /* realpath */
#include <dlfcn.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plugins/abi/fettle_plugin.h"

/* An invented five-cylinder engine at four moments. */
enum { rows = 4, most_columns = 16 };
static const double rpm[rows] = {1500, 3250, 5250, 9500};
static const double throttle_pct[rows] = {5, 27.5, 60, 100};
static const double battery_v[rows] = {12.2, 13.5, 13.9, 14.1};
static const double mass_mg[rows] = {6, 14.5, 31, 44};
static const struct {
  const char* name;
  const double* values;
} columns[] = {{"rpm", rpm}, {"throttle_pct", throttle_pct}, {"battery_v", battery_v}, {"mass_mg", mass_mg}};

static const double rpm_points[] = {1000, 4000, 8000}, throttle_points[] = {0, 20, 100};
static const double battery_points[] = {8, 12, 16};
static const fettle_axis surface[] = {{"rpm", rpm_points, 3}, {"throttle_pct", throttle_points, 3}};
static const fettle_axis curve[] = {{"battery_v", battery_points, 3}};
static const double fuel_mg[] = {5, 14, 22, 6, 18, 34, 4, 16, 41};
static const double correction[] = {1, 1.02, 1, 0.98, 1, 1.05, 1, 1, 1.03};
static const double secondary_share[] = {0, 0, 0, 0, 0, 0.4, 0, 0.25, 0.5};
static const double primary_dead_ms[] = {1.9, 1.1, 0.8}, secondary_dead_ms[] = {2.1, 1.2, 0.9};
static const double trims[5][9] = {{1, 1, 1.01, 1, 1, 1.02, 1, 1, 1},
                                   {1, 1, 1, 1, 1, 0.99, 1, 1, 0.98},
                                   {1, 0.99, 0.98, 1, 1, 1, 1, 1, 1},
                                   {1, 1, 1, 1, 1.01, 1, 1, 1, 1.02},
                                   {1, 1.01, 1.01, 1, 0.99, 0.99, 1, 1, 1}};
static const fettle_map maps[] = {{"map", surface, 2, fuel_mg, 9},
                                  {"correction", surface, 2, correction, 9},
                                  {"secondary_share", surface, 2, secondary_share, 9},
                                  {"primary_dead_time_ms", curve, 1, primary_dead_ms, 3},
                                  {"secondary_dead_time_ms", curve, 1, secondary_dead_ms, 3},
                                  {"trim_1", surface, 2, trims[0], 9},
                                  {"trim_2", surface, 2, trims[1], 9},
                                  {"trim_3", surface, 2, trims[2], 9},
                                  {"trim_4", surface, 2, trims[3], 9},
                                  {"trim_5", surface, 2, trims[4], 9}};
static const fettle_number numbers[] = {{"primary_flow_mg_per_ms", 3.2},
                                        {"secondary_flow_mg_per_ms", 4.1},
                                        {"primary_smallest_open_ms", 0.4},
                                        {"secondary_smallest_open_ms", 0.5},
                                        {"largest_duty", 0.85}};

static const double* column(const char* name) {
  for (size_t i = 0; i < sizeof columns / sizeof columns[0]; ++i)
    if (strcmp(columns[i].name, name) == 0) return columns[i].values;
  return NULL;
}

/* What is wrong with a table, or null; looks at the size before anything behind it. */
static const char* fault_of(const fettle_plugin_table* table) {
  if (table == NULL) return "gives no table of functions";
  if (table->size < offsetof(fettle_plugin_table, name)) return "has a truncated table";
  if (table->abi_major != FETTLE_PLUGIN_MAJOR) return "speaks another version of the interface";
  if (table->size < FETTLE_PLUGIN_TABLE_SIZE_1_0) return "has a truncated table";
#if FETTLE_PLUGIN_MINOR >= 1
  if (table->abi_minor >= 1 && table->size < sizeof *table) return "has a wrong size for its version";
#endif
  if (!table->name || !table->version || !table->purpose || !table->usage)
    return "has no name, version, purpose or usage";
  if (!table->status_text || !table->create || !table->input_name || !table->output_name || !table->run ||
      !table->destroy)
    return "lacks a function in its table";
  return NULL;
}

static int complain(const char* path, const char* complaint) {
  fprintf(stderr, "plugin_host_c: plugin %s %s\n", path, complaint);
  return 1;
}

static int complain_status(const char* path, const fettle_plugin_table* table, const char* action, fettle_status status,
                           const char* message) {
  const char* text = message[0] != '\0' ? message : table->status_text(status);
  fprintf(stderr, "plugin_host_c: plugin %s cannot %s: %s (status %" PRId32 ")\n", path, action,
          text != NULL ? text : "no reason given", status);
  return 1;
}

static int run(const char* path, const fettle_plugin_table* table, fettle_instance* instance) {
  const double* inputs[most_columns];
  double storage[most_columns][rows], *outputs[most_columns];
  uint64_t input_count = 0, output_count = 0;
  for (const char* name; (name = table->input_name(instance, input_count)) != NULL; ++input_count) {
    if (input_count == most_columns) return complain(path, "has more inputs than this host can give");
    inputs[input_count] = column(name);
    if (inputs[input_count] == NULL) return complain(path, "needs a column that this host does not have");
  }
  for (; table->output_name(instance, output_count) != NULL; ++output_count) {
    if (output_count == most_columns) return complain(path, "has more outputs than this host can take");
    outputs[output_count] = storage[output_count];
  }
  const fettle_status status = table->run(instance, inputs, input_count, outputs, output_count, rows);
  if (status != FETTLE_OK) return complain_status(path, table, "run", status, "");
  for (uint64_t i = 0; i < output_count; ++i) {
    printf("%s", table->output_name(instance, i));
    for (int row = 0; row < rows; ++row) printf(" %.17g", outputs[i][row]);
    printf("\n");
  }
#if FETTLE_PLUGIN_MINOR >= 1
  const int can_reset = table->size >= sizeof *table && table->reset != NULL;
  printf("%s\n", can_reset && table->reset(instance) == FETTLE_OK ? "forgets on request" : "cannot forget");
#endif
  return 0;
}

static int try_plugin(const char* given) {
  char* path = realpath(given, NULL); /* dlopen would search the system for a name without a slash */
  if (path == NULL) return complain(given, "is not a file");
  void* library = dlopen(path, RTLD_NOW | RTLD_LOCAL);
  free(path);
  if (library == NULL) {
    fprintf(stderr, "plugin_host_c: plugin %s cannot be loaded: %s\n", given, dlerror());
    return 1;
  }
  int failed = 1;
  fettle_plugin_entry entry = NULL;
  *(void**)&entry = dlsym(library, FETTLE_PLUGIN_SYMBOL); /* the conversion that POSIX asks for */
  const fettle_plugin_table* table = entry != NULL ? entry() : NULL;
  const char* fault = entry == NULL ? "has no symbol " FETTLE_PLUGIN_SYMBOL : fault_of(table);
  if (fault != NULL) {
    complain(given, fault);
  } else {
    const fettle_settings settings = {sizeof settings, maps, sizeof maps / sizeof maps[0], numbers,
                                      sizeof numbers / sizeof numbers[0]};
    char message[512] = "";
    fettle_instance* instance = NULL;
    printf("%s %s: %s\n", table->name, table->version, table->purpose);
    const fettle_status status = table->create(&settings, message, sizeof message, &instance);
    if (status != FETTLE_OK)
      complain_status(given, table, "be set up", status, message);
    else if (instance == NULL)
      complain(given, "says that it is set up but gives no instance");
    else
      failed = run(given, table, instance);
    if (instance != NULL) table->destroy(instance);
  }
  dlclose(library);
  return failed;
}

int main(int count, char** words) {
  if (count < 2) {
    fprintf(stderr, "usage: plugin_host_c PLUGIN...\n");
    return 2;
  }
  int failed = 0;
  for (int i = 1; i < count; ++i) failed |= try_plugin(words[i]);
  return failed;
}
