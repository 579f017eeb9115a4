"""What `pyproject.toml` cannot say: the sample shipment, kept at the top, is installed as a part of the package."""

from setuptools import find_packages, setup

setup(
    packages=[*find_packages(include=["receiving", "receiving.*", "web", "web.*"]), "receiving.sample_images"],
    package_dir={"receiving.sample_images": "sample_images"},
)
