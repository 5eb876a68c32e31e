# Read by deploy/demo and deploy/test: finds a Python of 3.11 or newer, enters the project's folder, starts the module $1.
# Plain sh, because at this point nothing else is known to be there.

run_module() {
    module=$1
    shift
    python=
    seen=
    for candidate in ${PYTHON:-python3 python3.11 python3.12 python3.13 python3.14}; do
        path=$(command -v "$candidate" 2>/dev/null) || continue
        if "$path" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            python=$path
            break
        fi
        [ -n "$seen" ] || seen=" ($path is $("$path" -V 2>&1 | head -n 1))"
    done
    if [ -z "$python" ]; then
        echo "Python 3.11 or newer is needed and was not found$seen: install it, or name it with PYTHON=/path/to/python3.11, and run the same command again." >&2
        exit 1
    fi
    # The project's own trace comes before the standard library's module of that name.
    unset PYTHONSAFEPATH PYTHONHOME
    PYTHONPATH=$PWD
    export PYTHONPATH
    exec "$python" -m "$module" "$@"
}
