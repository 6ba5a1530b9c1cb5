# cmake -P run.cmake: builds the microcontroller example for a Cortex-M4F, prints what it weighs, runs it under QEMU.
# Says `SKIP:` where the cross tools are not installed (Debian: gcc-arm-none-eabi libstdc++-arm-none-eabi-newlib
# qemu-system-arm).
cmake_path(GET CMAKE_CURRENT_LIST_FILE PARENT_PATH here)
set(image ${CMAKE_CURRENT_BINARY_DIR}/microcontroller.elf)  # where the script is called
foreach(tool arm-none-eabi-g++ arm-none-eabi-size arm-none-eabi-nm qemu-system-arm)
  string(MAKE_C_IDENTIFIER ${tool} variable)
  find_program(${variable} ${tool})
  if(NOT ${variable})
    message("SKIP: ${tool} is not installed")
    return()
  endif()
endforeach()

function(run)
  cmake_parse_arguments(PARSE_ARGV 0 arg "" "OUTPUT" "COMMAND")
  execute_process(COMMAND ${arg_COMMAND} RESULT_VARIABLE failed OUTPUT_VARIABLE output ERROR_VARIABLE errors TIMEOUT 300)
  if(failed)
    if(errors MATCHES "(array|optional): No such file")
      message("SKIP: the cross compiler has no C++ standard library (Debian: libstdc++-arm-none-eabi-newlib)")
      return()
    endif()
    list(JOIN arg_COMMAND " " command)
    message(FATAL_ERROR "${command}\n${output}${errors}")
  endif()
  set(${arg_OUTPUT} "${output}${errors}" PARENT_SCOPE)  # QEMU gives the program's words to stderr
endfunction()

run(OUTPUT ignored COMMAND ${arm_none_eabi_g__}
    -mcpu=cortex-m4 -mthumb -mfpu=fpv4-sp-d16 -mfloat-abi=hard -O2 -std=c++20 -fno-exceptions -fno-rtti
    -ffunction-sections -fdata-sections -Wall -Wextra -Wconversion -Wsign-conversion -Wshadow -Wdouble-promotion -Werror
    -I${here}/../../include ${here}/main.cpp ${here}/board.cpp
    -nostartfiles --specs=nano.specs -T ${here}/mps2.ld -Wl,--gc-sections -o ${image})
if(NOT EXISTS ${image})
  return()
endif()

run(OUTPUT symbols COMMAND ${arm_none_eabi_nm} -CS ${image})
foreach(word malloc _sbrk "operator new" __cxa_throw __aeabi_dadd __aeabi_dmul)
  string(FIND "${symbols}" "${word}" at)
  if(NOT at EQUAL -1)
    message(FATAL_ERROR "the image holds ${word}: heap, exceptions and double arithmetic do not belong here")
  endif()
endforeach()

run(OUTPUT sizes COMMAND ${arm_none_eabi_size} ${image})
string(REGEX MATCH "\n *([0-9]+)[ \t]+([0-9]+)[ \t]+([0-9]+)" ignored "${sizes}")
math(EXPR flash "${CMAKE_MATCH_1} + ${CMAKE_MATCH_2}")
math(EXPR ram "${CMAKE_MATCH_2} + ${CMAKE_MATCH_3}")
message("image: ${flash} bytes of flash, ${ram} bytes of RAM and its stack")

# code_of(<variable> <pattern>...): bytes of all functions whose names match.
function(code_of variable)
  set(code 0)
  foreach(function ${ARGN})
    if(NOT symbols MATCHES "[0-9a-f]+ ([0-9a-f]+) [tTwW] [^\n]*${function}")
      message(FATAL_ERROR "no function ${function} in the image")
    endif()
    math(EXPR code "${code} + 0x${CMAKE_MATCH_1}")
  endforeach()
  set(${variable} ${code} PARENT_SCOPE)
endfunction()

# With all they call.
code_of(code "look_up_near\\(float" "fettle::detail::locate_anew<2u, float>" "fettle::detail::search_further<float>")
message("code of a float look-up of rank 2 with its search: ${code} bytes")
code_of(cycle "fettle::run_cycle<float>" "fettle::split<float>" "fettle::detail::choose<float>"
        "fettle::detail::range_of<float>" "fettle::detail::search_further<float>")
message("code of a fuel cycle of two banks, charge, three maps, guard, ramp, split and two films: ${cycle} bytes")
if(code GREATER 1024)
  message(FATAL_ERROR "more than 1 KB")
endif()

run(OUTPUT printed COMMAND ${qemu_system_arm} -M mps2-an386 -icount shift=0 -nographic
    -semihosting-config enable=on,target=native -kernel ${image})
message("${printed}")
if(NOT printed MATCHES "all is well")
  message(FATAL_ERROR "it did not come to its end")
endif()
