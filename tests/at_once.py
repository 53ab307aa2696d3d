"""Jobs that start together, on whichever database the suite runs."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connection

from backoffice.refusal import Refused


def at_once(jobs):
    """Run the jobs in a thread each, all starting together, and hand back what each returned or raised."""
    start = Barrier(len(jobs))

    def run(job):
        try:
            start.wait(timeout=60)
            return job()
        except Refused as refused:
            return refused
        finally:
            connection.close()

    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(run, jobs))
