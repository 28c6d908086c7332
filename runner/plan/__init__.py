"""Plan files: reading, faults, compiling to the core, remarks on the content, the library.

Nothing is imported here, so that a command that only looks for a plan does not pay for pydantic.

    read.read_plan, read.parse_plan      a file, or a stored text, to a checked Plan
    compile.compile_session              a Plan and a session's id to the core's Workout
    content.content_warnings             what is allowed and still worth a second thought
    library.find_plan                    a name or a path to a file
    schema.json_schema                   for editors that complete and check
    summary.summary_lines                what a plan holds, in a few lines
    faults.render_faults                 rows of faults as text
"""
