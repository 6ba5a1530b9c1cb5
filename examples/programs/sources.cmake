# What the programs are made of beside their own main files, for this build and for that of the laboratory page.
function(programs_sources variable folder)
  list(TRANSFORM ARGN PREPEND ${CMAKE_CURRENT_FUNCTION_LIST_DIR}/${folder}/)
  list(TRANSFORM ARGN APPEND .cpp)
  set(${variable} ${${variable}} ${ARGN} PARENT_SCOPE)
endfunction()

# Reports; gnuplot.cpp is apart, for the page draws pictures in another way.
programs_sources(programs_report common/report chart colour histogram inline_svg interval_chart line_chart map_table page
                 surface_chart text thinning)
# Sessions and their logs; what needs fettle::lambda is apart.
programs_sources(programs_session common/session cell_name channels check_units delivery json_reader judge_delivery
                 log_conditions log_fuel log_maps map_basis nearest_name next_session read_fuel_map read_log read_session
                 require_axes trim_maps)
programs_sources(programs_session common/vehicle read_vehicle)
programs_sources(programs_recording common/session judge_scatter judge_search read_all_logs recording trimmed_readings)
programs_sources(programs_virtual_engine virtual_engine car car_files dyno_drive engine loaded_maps maps physics
                 physics_json plan_drive read_plan session simulate stage_drive virtual_session)
programs_sources(programs_comparison common/statistics student_t)
programs_sources(programs_comparison compare_pulls clustered coast_fit comparison pulls_needed)
# The files that programs write; most are JSON. Those of results of fettle::lambda are apart.
programs_sources(programs_results plan_shifts files)
programs_sources(programs_results start_session session_file)
programs_sources(programs_results_of_lambda compare_passes files)
programs_sources(programs_results_of_lambda compare_pulls files)
programs_sources(programs_results_of_lambda correct_map files)
programs_sources(programs_results_of_lambda stage_banks files)
programs_sources(programs_results_of_lambda trim_cylinders files)

# Files that include the same are compiled as one unit: what they include costs more than they do.
foreach(unit report session recording virtual_engine comparison results)
  set_source_files_properties(${programs_${unit}} PROPERTIES UNITY_GROUP ${unit})
endforeach()
set_source_files_properties(${programs_results_of_lambda} PROPERTIES UNITY_GROUP results)
