/* SPDX-License-Identifier: MIT */
/**
 * The binary interface between plugins and the programs that load them, for C11 and C++.
 *
 * A plugin is a shared object with one exported symbol, `fettle_plugin`, which returns a table of functions. Rules:
 *  - The size of a struct comes first in it. Later versions only append members and raise the minor number; whoever
 *    reads looks at the size before it touches what was appended. Another major number is another interface.
 *    `fettle_axis`, `fettle_map` and `fettle_number` stand in lists and never grow.
 *  - Every function reports a status; nothing is thrown across. Every buffer is the caller's, and inputs and outputs do
 *    not overlap. What a settings struct points to is copied by `create` and may go afterwards.
 *  - An instance is opaque and serves one thread at a time; several instances may run side by side.
 *  - NaN in a column means "not known here" and gives a result that is NaN or safe; it is never an error.
 */
#ifndef FETTLE_PLUGIN_H
#define FETTLE_PLUGIN_H

#include <stddef.h>
#include <stdint.h>

#define FETTLE_PLUGIN_MAJOR 1
#ifndef FETTLE_PLUGIN_MINOR /* define it as 0 to be what was built before anything was appended */
#define FETTLE_PLUGIN_MINOR 1
#endif

#ifdef __cplusplus
extern "C" {
#endif

typedef int32_t fettle_status;
enum {
  FETTLE_OK = 0,
  FETTLE_NULL_POINTER = 1,   /**< a pointer is null that must not be */
  FETTLE_WRONG_SIZE = 2,     /**< a struct is smaller than the first version of it */
  FETTLE_WRONG_COUNT = 3,    /**< another number of columns than the instance has */
  FETTLE_WRONG_SETTINGS = 4, /**< `create`: the message says which and why */
  FETTLE_OUT_OF_MEMORY = 5,
  FETTLE_FAILED = 6 /**< anything else */
};

/** The breakpoints of one input of a map: at least two, finite, each above the one before. */
typedef struct fettle_axis {
  const char* name; /**< also the name of the input column: `rpm`, `throttle_pct` */
  const double* points;
  uint64_t count;
} fettle_axis;

/** A map: one value per crossing of its axes, row-major, the last axis fastest. */
typedef struct fettle_map {
  const char* name;
  const fettle_axis* axes;
  uint64_t rank; /**< 1 to 3 */
  const double* values;
  uint64_t value_count;
} fettle_map;

typedef struct fettle_number {
  const char* name; /**< with its unit: `primary_flow_mg_per_ms` */
  double value;
} fettle_number;

/** All a plugin may want; each picks what it knows by name and ignores the rest. */
typedef struct fettle_settings {
  uint64_t size;
  const fettle_map* maps;
  uint64_t map_count;
  const fettle_number* numbers;
  uint64_t number_count;
} fettle_settings;

typedef struct fettle_instance fettle_instance;

/** What a plugin is and does. Texts are UTF-8, end in a zero byte and live as long as the plugin is loaded. */
typedef struct fettle_plugin_table {
  uint64_t size;
  uint32_t abi_major;
  uint32_t abi_minor;
  const char* name;
  const char* version;
  const char* purpose; /**< one line */
  const char* usage;   /**< maps, numbers, inputs and outputs, one a line */

  /** What a status means, in words; never null, also for numbers not known. */
  const char* (*status_text)(fettle_status status);
  /** Makes an instance. `message` may be null; otherwise it ends in a zero byte and explains a refusal. */
  fettle_status (*create)(const fettle_settings* settings, char* message, uint64_t message_size,
                          fettle_instance** instance);
  /** Name of an input or output column of an instance, null behind the last; lives as long as the instance. */
  const char* (*input_name)(const fettle_instance* instance, uint64_t index);
  const char* (*output_name)(const fettle_instance* instance, uint64_t index);
  /** Works off `rows` rows of columns. Instances that remember go on where the last call ended. */
  fettle_status (*run)(fettle_instance* instance, const double* const* inputs, uint64_t input_count,
                       double* const* outputs, uint64_t output_count, uint64_t rows);
  void (*destroy)(fettle_instance* instance); /**< null is allowed */

#if FETTLE_PLUGIN_MINOR >= 1 /* appended in 1.1 */
  /** Forgets all rows so far. */
  fettle_status (*reset)(fettle_instance* instance);
#endif
} fettle_plugin_table;

/** The smallest table and settings: those of version 1.0. */
#define FETTLE_PLUGIN_TABLE_SIZE_1_0 (offsetof(fettle_plugin_table, destroy) + sizeof(void (*)(void)))
#define FETTLE_SETTINGS_SIZE_1_0 (offsetof(fettle_settings, number_count) + sizeof(uint64_t))

#define FETTLE_PLUGIN_SYMBOL "fettle_plugin"
typedef const fettle_plugin_table* (*fettle_plugin_entry)(void);

/** The one symbol of a plugin. */
__attribute__((visibility("default"))) const fettle_plugin_table* fettle_plugin(void);

#ifdef __cplusplus
}
#endif
#endif
