# The order of the folders, as far as it stands in build files: part_keep_order(FOLDER) makes every target of FOLDER (one of
# capture, decode, rules, cli, or tests/ and one of them) wait for the check of includes, and stops the configuration if one of them
# links a library that stands to the right of its folder.
set(PARTS_RIGHT_OF_capture decode rules cli)
set(PARTS_RIGHT_OF_decode rules cli)
set(PARTS_RIGHT_OF_rules cli)
set(PARTS_RIGHT_OF_cli)

function(part_keep_order folder)
  if(NOT EXISTS ${CMAKE_CURRENT_SOURCE_DIR}/${folder}/CMakeLists.txt)
    return()
  endif()
  get_filename_component(part ${folder} NAME)
  get_directory_property(targets DIRECTORY ${folder} BUILDSYSTEM_TARGETS)
  foreach(target ${targets})
    add_dependencies(${target} layering)
    foreach(property LINK_LIBRARIES INTERFACE_LINK_LIBRARIES)
      get_target_property(links ${target} ${property})
      foreach(right ${PARTS_RIGHT_OF_${part}})
        if("${links}" MATCHES "(^|[;:])portassay_${right}($|[;>])")
          message(FATAL_ERROR "${folder}: ${target} links portassay_${right}, which stands to its right "
                              "(data flows capture -> decode -> rules -> cli)")
        endif()
      endforeach()
    endforeach()
  endforeach()
endfunction()
