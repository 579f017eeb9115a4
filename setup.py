"""What `pyproject.toml` cannot say: the sample shipment, kept at the top, is installed as a part of the package.

Folders of data count as packages, as setuptools wants it; else it prints a page of warnings for each.
"""

from setuptools import find_namespace_packages, setup

setup(
    packages=[
        *find_namespace_packages(include=["receiving", "receiving.*", "web", "web.*"], exclude=["*.__pycache__"]),
        "receiving.sample_images",
    ],
    package_dir={"receiving.sample_images": "sample_images"},
)
