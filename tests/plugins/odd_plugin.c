/* SPDX-License-Identifier: MIT */
/* A plugin that doubles the column rpm, sound or odd in one way: compiled once for each. */
#include "plugins/abi/fettle_plugin.h"

#ifdef NO_SYMBOL
int something_else(void) {
  return 0;
}
#else

struct fettle_instance {
  int dummy;
};
static struct fettle_instance the_instance;

static const char* status_text(fettle_status status) {
#ifdef STRANGE_STATUS
  (void)status;
  return NULL;
#else
  return status == FETTLE_OUT_OF_MEMORY ? "out of memory" : "some status";
#endif
}

static fettle_status create(const fettle_settings* settings, char* message, uint64_t message_size,
                            fettle_instance** instance) {
  (void)settings, (void)message, (void)message_size;
  *instance = &the_instance;
#if defined NO_INSTANCE
  *instance = NULL;
#elif defined NO_MEMORY_AT_SETUP
  *instance = NULL;
  return FETTLE_OUT_OF_MEMORY;
#elif defined STRANGE_STATUS
  *instance = NULL;
  return 99;
#endif
  return FETTLE_OK;
}

static const char* input_name(const fettle_instance* instance, uint64_t index) {
  (void)instance;
  return index == 0 ? "rpm" : NULL;
}
static const char* output_name(const fettle_instance* instance, uint64_t index) {
  (void)instance;
  return index == 0 ? "twice_rpm" : NULL;
}

static fettle_status run(fettle_instance* instance, const double* const* inputs, uint64_t input_count,
                         double* const* outputs, uint64_t output_count, uint64_t rows) {
  (void)instance;
#ifdef NO_MEMORY_AT_RUN
  rows = 0;
#endif
  if (input_count != 1 || output_count != 1) return FETTLE_WRONG_COUNT;
  for (uint64_t i = 0; i < rows; ++i) outputs[0][i] = 2 * inputs[0][i];
#ifdef NO_MEMORY_AT_RUN
  return FETTLE_OUT_OF_MEMORY;
#endif
  return FETTLE_OK;
}

static void destroy(fettle_instance* instance) {
  (void)instance;
}

#if FETTLE_PLUGIN_MINOR >= 1
static fettle_status reset(fettle_instance* instance) {
  (void)instance;
  return FETTLE_OK;
}
#endif

/* What a later version may look like. */
typedef struct {
  fettle_plugin_table known;
  fettle_status (*appended_later)(fettle_instance*);
} later_table;

static later_table table = {.known = {.size = sizeof(fettle_plugin_table),
                                      .abi_major = FETTLE_PLUGIN_MAJOR,
                                      .abi_minor = FETTLE_PLUGIN_MINOR,
                                      .name = "twice",
                                      .version = "1.0",
                                      .purpose = "doubles a column",
                                      .usage = "input rpm, output twice_rpm\n",
                                      .status_text = status_text,
                                      .create = create,
                                      .input_name = input_name,
                                      .output_name = output_name,
                                      .run = run,
#if FETTLE_PLUGIN_MINOR >= 1
                                      .reset = reset,
#endif
                                      .destroy = destroy}};

const fettle_plugin_table* fettle_plugin(void) {
#if defined OTHER_MAJOR
  table.known.abi_major = FETTLE_PLUGIN_MAJOR + 1;
#elif defined LATER
  table.known.size = sizeof(later_table);
  table.known.abi_minor = 7;
#elif defined TRUNCATED
  table.known.size = sizeof(uint64_t);
#elif defined CUT_SHORT
  table.known.size = FETTLE_PLUGIN_TABLE_SIZE_1_0 - sizeof(void*);
  table.known.abi_minor = 0;
#elif defined WRONG_SIZE
  table.known.size = FETTLE_PLUGIN_TABLE_SIZE_1_0;
#elif defined NO_NAME
  table.known.name = NULL;
#elif defined NO_FUNCTION
  table.known.run = NULL;
#elif defined NULL_TABLE
  if (table.known.size > 0) return NULL;
#endif
  return &table.known;
}
#endif
